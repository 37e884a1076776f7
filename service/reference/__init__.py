"""The reference dataset: facts with their source, verified and converted once at start, answered from memory."""
