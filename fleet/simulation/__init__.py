"""Brakes that exist only as numbers: a band brake whose true setting is known, to practise on and to test against."""
