"""The performance test: what pressures, temperatures and humid air say about a running circuit, and how surely."""
