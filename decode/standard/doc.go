// Package standard names what published standards name: parameter groups of SAE J1939,
// identifiers of ISO 15765-4, services of OBD and their PIDs (SAE J1979, ISO 15031-5),
// services of ISO 14229. It decides nothing about a car; whether a bus follows SAE J1939
// at all says Follows. Start with FindGroup, Diagnostic and FindPID.
package standard
