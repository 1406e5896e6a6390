"""Every number of the product is worked out here: plain data in, plain data out, no Django, no clock, no files."""
