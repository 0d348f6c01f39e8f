"""What a person does at a terminal: look for devices, bind one to channels, calibrate."""
