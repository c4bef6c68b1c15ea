"""The command `yokebook`: one module a command, all of them light to import so that `--help` answers at once."""
