"""From one build document to stages, cross-checks and the order of work. It asks the same answers as the routes do."""
