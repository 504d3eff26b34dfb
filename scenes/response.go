package scenes

import (
	"deskhand/profiles/source"
)

// Response is a microphone's response as points of rising frequency: two or more, or
// none where it isn't known.
type Response []ResponsePoint

// ResponsePoint is the level in dB, relative to the microphone's sensitivity, that it
// gives at a frequency in Hz.
type ResponsePoint struct{ Frequency, Level float64 }

// What a point of a response can be. Beyond, it is another unit or a slip: 2.5 for
// 2.5 kHz, a level in mV.
const (
	lowestPoint, highestPoint = 5.0, 40000.0 // Hz
	farthestPoint             = 40.0         // dB, up and down
	mostPoints                = 1000
)

// readResponse reads the points under response: [[Hz, dB], ...].
func readResponse(t *source.Table) Response {
	list, ok := t.List("response")
	if !ok {
		return nil
	}
	if len(list) < 2 || len(list) > mostPoints {
		t.Fault("response", "response: expected 2 to %d points, [[Hz, dB], ...], and there %s", mostPoints, isAre(len(list)))
		return nil
	}
	response := make(Response, len(list))
	for i, raw := range list {
		if response[i], ok = readPoint(t, i+1, raw); !ok {
			return nil
		}
		if i > 0 && response[i].Frequency <= response[i-1].Frequency {
			t.Fault("response", "response, point %d: %s Hz is not above the %s Hz before it: write the points with rising frequencies",
				i+1, figure(response[i].Frequency), figure(response[i-1].Frequency))
			return nil
		}
	}
	return response
}

func readPoint(t *source.Table, number int, raw any) (p ResponsePoint, ok bool) {
	pair, isList := raw.([]any)
	if !isList || len(pair) != 2 {
		t.Fault("response", "response, point %d: write it as [Hz, dB], such as [100.0, -3.0]", number)
		return p, false
	}
	frequency, hasFrequency := numberOf(pair[0])
	level, hasLevel := numberOf(pair[1])
	switch {
	case !hasFrequency || !hasLevel:
		t.Fault("response", "response, point %d: write two numbers, [Hz, dB], such as [100.0, -3.0]", number)
		return p, false
	case !(frequency >= lowestPoint && frequency <= highestPoint):
		t.Fault("response", "response, point %d: %s Hz: expected %s to %s Hz (2.5 kHz is 2500)",
			number, figure(frequency), figure(lowestPoint), figure(highestPoint))
		return p, false
	case !(level >= -farthestPoint && level <= farthestPoint):
		t.Fault("response", "response, point %d: %s dB: expected -%s to %s dB, relative to the sensitivity",
			number, figure(level), figure(farthestPoint), figure(farthestPoint))
		return p, false
	}
	return ResponsePoint{frequency, level}, true
}

// numberOf gives a number as TOML has it, whole or decimal.
func numberOf(raw any) (float64, bool) {
	switch n := raw.(type) {
	case float64:
		return n, true
	case int64:
		return float64(n), true
	}
	return 0, false
}

func isAre(n int) string {
	switch n {
	case 0:
		return "is none"
	case 1:
		return "is one"
	}
	return "are more"
}
