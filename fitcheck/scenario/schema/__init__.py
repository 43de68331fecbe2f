"""The tables of the files, key by key, with quantities and ranges."""
