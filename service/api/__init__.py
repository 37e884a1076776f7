"""HTTP and nothing else: limits, strict JSON, negotiation, problems, one route a topic."""
