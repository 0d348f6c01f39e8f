"""What crosses the network: SenML packs, actions and quantities as JSON."""
