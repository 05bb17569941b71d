"""The numbers an engineer asks for, from a solved model."""
