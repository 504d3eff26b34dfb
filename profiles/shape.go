package profiles

import (
	"math"
	"sort"
)

// shape is the line of a numeric curve: position 0..1 along the control's travel
// to a value in trade units, and back. Both are strictly monotone, rising or falling.
type shape interface {
	value(position float64) float64
	position(value float64) float64
	// ends gives the values at position 0 and 1.
	ends() (from, to float64)
}

// linear has equal steps in the parameter's unit.
type linear struct{ from, to float64 }

func (l linear) value(p float64) float64    { return l.from + p*(l.to-l.from) }
func (l linear) position(v float64) float64 { return (v - l.from) / (l.to - l.from) }
func (l linear) ends() (float64, float64)   { return l.from, l.to }

// logarithmic has equal steps in the logarithm of the value, as pitch is heard.
// Both ends are above zero.
type logarithmic struct{ from, to float64 }

func (l logarithmic) value(p float64) float64 { return l.from * math.Pow(l.to/l.from, p) }
func (l logarithmic) position(v float64) float64 {
	return math.Log(v/l.from) / math.Log(l.to/l.from)
}
func (l logarithmic) ends() (float64, float64) { return l.from, l.to }

// power is a linear curve of the position raised to an exponent above zero:
// above 1, the steps are finer at the start.
type power struct{ from, to, exponent float64 }

func (c power) value(p float64) float64 { return c.from + (c.to-c.from)*math.Pow(p, c.exponent) }
func (c power) position(v float64) float64 {
	return math.Pow(max((v-c.from)/(c.to-c.from), 0), 1/c.exponent)
}
func (c power) ends() (float64, float64) { return c.from, c.to }

// point is one point of a table: a position of travel and the value there.
type point struct{ position, value float64 }

// table runs straight between points, the first at position 0 and the last at 1.
// Where its first value is -inf, the first stretch is straight in amplitude, since
// no line in dB starts at silence.
type table []point

func (t table) value(p float64) float64 {
	a, b := t.stretch(func(q point) bool { return q.position >= p })
	along := (p - a.position) / (b.position - a.position)
	if math.IsInf(a.value, -1) {
		return b.value + 20*math.Log10(max(along, 0))
	}
	return a.value + along*(b.value-a.value)
}

func (t table) position(v float64) float64 {
	from, to := t.ends()
	a, b := t.stretch(func(q point) bool {
		if to > from {
			return q.value >= v
		}
		return q.value <= v
	})
	along := (v - a.value) / (b.value - a.value)
	if math.IsInf(a.value, -1) {
		along = math.Pow(10, (v-b.value)/20)
	}
	return a.position + along*(b.position-a.position)
}

// stretch gives the two points around the place from which on reached is true.
func (t table) stretch(reached func(point) bool) (a, b point) {
	i := sort.Search(len(t), func(i int) bool { return reached(t[i]) })
	i = min(max(i, 1), len(t)-1)
	return t[i-1], t[i]
}

func (t table) ends() (float64, float64) { return t[0].value, t[len(t)-1].value }
