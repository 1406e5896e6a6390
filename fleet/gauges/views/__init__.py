"""Pages of a vessel's instruments and test gear."""
