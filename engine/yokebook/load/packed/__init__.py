"""The whole rulebook as one file of JSON lines, which loads without reading YAML. The YAML stays the truth."""
