"""Forms of the desk: what they ask for, and how what was typed becomes TOML again."""
