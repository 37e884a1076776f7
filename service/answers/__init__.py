"""One module a topic: joins calculation, facts and findings into an answer, and knows no HTTP."""
