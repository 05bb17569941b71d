"""What plies are made of: a sourced library, micromechanics, and cloth turned into plies."""
