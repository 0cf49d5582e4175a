// Package web is the pages of lull serve, made of the report's sections by the report's
// templates; what is more is that a log can be dropped on them, that the card of an
// episode is there only when it is asked for, and that a recording is shown as it goes. It
// serves nothing, and everything that a map, a log or a user wrote is escaped. Start with
// Drive.
package web
