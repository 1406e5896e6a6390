"""Pages of winches and drums."""
