"""Everything outside: files, charts, PDF. Each module makes one port of the services real."""
