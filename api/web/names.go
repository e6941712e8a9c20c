package web

import "hotday/models"

func nameOr(name, code string) string {
	if name != "" {
		return name
	}
	return code
}

// drinkNames returns a function that looks up a drink's name.
func drinkNames(drinks []models.Drink) func(string) string {
	return func(code string) string {
		for i := range drinks {
			if drinks[i].Code == code {
				return nameOr(drinks[i].Name, code)
			}
		}
		return code
	}
}

// beverageName returns a beverage's name, or its code if it has none.
func beverageName(beverages []models.Beverage, code string) string {
	for i := range beverages {
		if beverages[i].Code == code {
			return nameOr(beverages[i].Name, code)
		}
	}
	return code
}
