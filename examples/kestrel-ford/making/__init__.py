"""The parts of make_examples.py: designs, what is measured on a unit, and the stages of a record."""
