"""Physics of container, hose, circuit, scale and probes, to stand in for a bay."""
