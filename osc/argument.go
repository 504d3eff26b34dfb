package osc

// Number gives an argument that is a number of any of OSC's types, as senders take one
// type for another: int32, int64, float32 or float64.
func Number(argument any) (float64, bool) {
	switch v := argument.(type) {
	case int32:
		return float64(v), true
	case int64:
		return float64(v), true
	case float32:
		return float64(v), true
	case float64:
		return v, true
	}
	return 0, false
}

// Text gives an argument that is a text of either of OSC's types, a string or a symbol.
func Text(argument any) (string, bool) {
	switch v := argument.(type) {
	case string:
		return v, true
	case Symbol:
		return string(v), true
	}
	return "", false
}
