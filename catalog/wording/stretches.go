package wording

import (
	"fmt"

	"gradeline/catalog"
)

// Stretch is the advice for one stretch of a descent in words, with its stations.
func Stretch(s *catalog.HoldStretch, u catalog.Units) string {
	at := fmt.Sprintf("station %s to %s: ", u.Station(s.FromM), u.Station(s.ToM))
	if s.Slowing != nil {
		return at + fmt.Sprintf("slow down by the service brakes from %s to %s, they reach about %s; foot on the brake until gear %s is in",
			u.Speed(s.Slowing.FromSpeedMPS), u.Speed(s.SpeedMPS), u.Temp(s.Slowing.ServiceBrakeTempC), s.GearLabel())
	}
	return at + fmt.Sprintf("gear %s, %s, at most %s (%s)", s.GearLabel(), catalog.LeversWords(s.Levers), u.Speed(s.SpeedMPS), s.LimitedBy)
}
