"""Shells: elements, assembly, ties and the sparse solve. Arrays in, arrays out."""
