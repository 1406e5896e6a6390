"""The practice drum: the whole test against a virtual brake, in the browser. Nothing is stored."""
