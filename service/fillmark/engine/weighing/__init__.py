"""What stands on the pan: mass and flow from one stepped, disturbed indication."""
