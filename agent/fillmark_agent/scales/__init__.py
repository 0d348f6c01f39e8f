"""What wired scales say, decoded: a HID report or a line in, an indication out. No device is touched here."""
