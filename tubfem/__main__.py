"""Run the command as a module: python -m tubfem."""

from tubfem.cli import main

main()
