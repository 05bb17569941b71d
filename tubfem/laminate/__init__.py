"""Classical lamination theory on arrays: stiffness, recovery, failure and local stability of a stack."""
