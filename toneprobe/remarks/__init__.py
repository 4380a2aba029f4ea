"""What a player must know of one recording, in sentences: what it lost and how it was played (`recording`), and in which tuning
(`tuning`)."""
