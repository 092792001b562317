"""All that sounds: engine, drone, click, replay and limiter, and the snapshot that says what to sound like."""
