package commands

import (
	"context"
	"fmt"
	"strings"

	"golang.org/x/text/language"

	"hotday/planner/calc"
	"hotday/planner/say"
)

// Calc runs one calculation: JSON in, JSON out.
type Calc struct {
	Kind string `arg:"" complete:"kinds" help:"Kind of calculation, from the list above."`

	Language language.Tag `default:"en" placeholder:"TAG" help:"Language of the sentences, such as de; English if it has no texts."`
}

func (Calc) Help() string {
	var b strings.Builder
	b.WriteString("Kinds:\n\n")
	for _, kind := range calc.Kinds() {
		fmt.Fprintf(&b, "    %-10s  %s\n", kind, calc.About(kind))
	}
	b.WriteString("\nExamples:\n\n    echo '{\"dose_g\":20,\"brew_water_g\":240}' | hotday calc extraction\n" +
		"    echo '{\"beverage_g\":850,\"beverage_temp_c\":72,\"ice_temp_c\":-4,\"target_temp_c\":6}' | hotday calc chill\n    hotday calc water --language de < water.json")
	return b.String()
}

func (c *Calc) Run(ctx context.Context, s Streams) error {
	if calc.About(c.Kind) == "" { // checked before reading standard input, which may be a keyboard
		return calc.NoCalculation(c.Kind)
	}
	body, err := readAll("-", s)
	if err != nil {
		return err
	}
	out, err := calc.Run(ctx, say.In(c.Language.String()), c.Kind, body)
	if err != nil {
		return err
	}
	return writeJSON(s.Out, out)
}
