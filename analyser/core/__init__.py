"""What every subject stands on: channels, telemetry, figures, events, phases, the aircraft, and statistics."""
