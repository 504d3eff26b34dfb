package profiles

import "testing"

func TestEveryShippedProfileLoadsWithoutFault(t *testing.T) {
	names := ShippedNames()
	if len(names) == 0 {
		t.Fatal("no profile is shipped")
	}
	for _, name := range names {
		text, err := Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Load(name+".toml", text)
		if err != nil {
			t.Fatal(err)
		}
		if p.Name != name {
			t.Errorf("%s.toml calls itself %q", name, p.Name)
		}
	}
}
