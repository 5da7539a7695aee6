package trial

import (
	"errors"
	"strings"
	"testing"

	"foilledger/testdata"
)

func TestRuleFileErrors(t *testing.T) {
	good := "name = \"x\"\n[[rule]]\ntws_kn = [12, 20]\ndo = \"out\"\n"
	if _, err := ReadRules([]byte(good), "r.toml"); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ name, text, want string }{
		{"syntax", "name = \"x\"\n[[rule]\n", "r.toml:2: "},
		{"no name", "[[rule]]\ndo = \"in\"\n", "r.toml: name: missing"},
		{"no rule", "name = \"x\"\n", "at least one [[rule]]"},
		{"unknown key above", "name = \"x\"\nwell_min = 3\n[[rule]]\ndo = \"in\"\n", "r.toml:2: well_min: unknown key"},
		{"unknown key in a rule", good + "[[rule]]\ndo = \"in\"\ntws = [1, 2]\n", "r.toml:7: rule[2].tws: unknown key"},
		{"range upside down", "name = \"x\"\n[[rule]]\ndo = \"in\"\ntwa_deg = [140, 80]\n", "r.toml:4: rule[1].twa_deg: [140, 80]: the first must not be above"},
		{"range of one", "name = \"x\"\n[[rule]]\ndo = \"in\"\ntwa_deg = [140]\n", "r.toml:4: rule[1].twa_deg: must be two numbers"},
		{"outside", "name = \"x\"\n[[rule]]\ndo = \"in\"\ntwa_deg = [0, 190]\n", "r.toml:4: rule[1].twa_deg: 190: must be from 0 to 180"},
		{"not a number", "name = \"x\"\n[[rule]]\ndo = \"in\"\nhs_m = [\"a\", 2]\n", "r.toml:4: rule[1].hs_m: a is not a number"},
		{"nan", "name = \"x\"\n[[rule]]\ndo = \"in\"\nhs_m = [nan, 2]\n", "r.toml:4: rule[1].hs_m"},
		{"no action", "name = \"x\"\n[[rule]]\ntws_kn = [1, 2]\n", "r.toml:2: rule[1].do: missing"},
		{"unknown action", "name = \"x\"\n[[rule]]\ndo = \"up\"\n", "r.toml:3: rule[1].do: up: must be out, in, keep"},
		{"rake without out", "name = \"x\"\n[[rule]]\ndo = \"in\"\nrake_deg = 3\n", "r.toml:3: rule[1].do: extension and rake_deg belong"},
		{"otherwise", "name = \"x\"\notherwise = \"out\"\n[[rule]]\ndo = \"in\"\n", "r.toml:2: otherwise: out: must be in, keep"},
	} {
		_, err := ReadRules([]byte(tc.text), "r.toml")
		var re *RuleError
		if !errors.As(err, &re) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want …%s…", tc.name, err, tc.want)
		}
	}
}

func TestExampleRules(t *testing.T) {
	b, err := testdata.Files.ReadFile("policies/fresh-reach.toml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := ReadRules(b, "fresh-reach.toml")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Rules) != 4 || f.DwellS != 1800 || f.Rules[2].LastsS != 3600 || f.Rules[0].Line != 11 {
		t.Errorf("read as %+v", f)
	}
}
