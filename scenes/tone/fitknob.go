package tone

import "math"

// knob is one control of one slot, as an unbounded number that a search may move: the
// control's travel is middle + half * sin(x).
type knob struct {
	slot         int
	of           func(*Band) *float64
	logarithmic  bool
	middle, half float64
}

func (k knob) value(x float64) float64 {
	travel := k.middle + k.half*math.Sin(x)
	if k.logarithmic {
		return math.Exp(travel)
	}
	return travel
}

// turned gives the x of a value. At the very ends of its travel a knob would never
// move, so it starts a little inside.
func (k knob) turned(value float64) float64 {
	if k.logarithmic {
		value = math.Log(value)
	}
	const inside = 0.98
	return math.Asin(min(max((value-k.middle)/k.half, -inside), inside))
}

// knobs lists what can be moved of the bands in use.
func (f *fitter) knobs(bands []Band) []knob {
	var all []knob
	add := func(k knob, travel span) {
		if k.logarithmic && travel.low > 0 {
			travel = span{math.Log(travel.low), math.Log(travel.high)}
		}
		k.middle, k.half = (travel.low+travel.high)/2, (travel.high-travel.low)/2
		if k.half > 0 {
			all = append(all, k)
		}
	}
	for slot, b := range bands {
		if b.Frequency == 0 {
			continue
		}
		add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Frequency }, logarithmic: true}, f.ranges[slot].frequency)
		add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Q }, logarithmic: true}, f.ranges[slot].q)
		if b.Kind.HasGain() {
			add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Gain }}, f.ranges[slot].gain)
		}
	}
	return all
}
