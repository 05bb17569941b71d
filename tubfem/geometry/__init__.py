"""Where the material is: plain panels turned into a conforming mesh with names."""
