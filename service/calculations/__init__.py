"""Pure functions: keyword-only SI floats (or arrays) in and out. They look nothing up and know no HTTP."""
