package source

// Quote writes a text as a TOML string, in double quotes and with what needs it escaped.
func Quote(text string) string { return basicText(text) }

// Key writes one word of a key, in quotes only where it needs them.
func Key(word string) string { return keyText(word) }
