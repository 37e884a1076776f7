"""One answer as JSON, CSV, SVG, HTML or plain text, with the same digits in every face."""
