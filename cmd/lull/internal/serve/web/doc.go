// Package web makes the pages of lull serve from the report's sections and templates.
// Beyond the report, logs can be dropped on them, the card of an episode is loaded only on
// request, and a recording is shown in progress. The package serves nothing, and escapes
// everything that a map, a log or a user wrote. Start with Drive.
package web
