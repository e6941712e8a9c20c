package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func measuredBrews(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("other"), "", t0)
	require.NoError(t, err)
	first := models.MeasuredBrew{Coffee: "terrace", At: at(1), DoseG: 60, BrewWaterG: 720, BeverageG: 612, TDSPct: 1.64, By: "Ada"}
	second, lantern := first, first
	second.At, lantern.Coffee = at(2), "lantern"
	require.NoError(t, s.PutMeasuredBrews(ctx, shop, []models.MeasuredBrew{second, first, lantern}))
	got, err := s.MeasuredBrews(ctx, shop, "terrace")
	require.NoError(t, err)
	require.Equal(t, []models.MeasuredBrew{first, second}, got, "of this coffee, oldest first")

	first.TDSPct, first.By = 1.7, "Ben"
	require.NoError(t, s.PutMeasuredBrews(ctx, shop, []models.MeasuredBrew{first}))
	got, err = s.MeasuredBrews(ctx, shop, "terrace")
	require.NoError(t, err)
	require.Equal(t, []models.MeasuredBrew{first, second}, got, "the same coffee and time is replaced")

	isCode(t, models.CodeNotFound, s.DeleteMeasuredBrew(ctx, "other", "terrace", at(1)))
	require.NoError(t, s.DeleteMeasuredBrew(ctx, shop, "terrace", at(1)))
	isCode(t, models.CodeNotFound, s.DeleteMeasuredBrew(ctx, shop, "terrace", at(1)))
	got, err = s.MeasuredBrews(ctx, shop, "terrace")
	require.NoError(t, err)
	require.Equal(t, []models.MeasuredBrew{second}, got)
	isCode(t, models.CodeNotFound, s.PutMeasuredBrews(ctx, "nowhere", []models.MeasuredBrew{first}))
}
