"""Properties, safety class and cautions of refrigerants."""
