"""From files to a typed rulebook: nodes, faults, schemas, and one module for each kind of file."""
