// Package draft proposes a signal map of a car of which nobody has one, from logs of its
// bus. It looks for what only a car that stops its engine and starts it again shows: a
// number that rests at zero, is cranked, settles and comes down; a voltage that dips with
// each crank; switches that are on from the order to stop to the restart. Answers to a scan
// tool, parameter groups of SAE J1939, a database of the bus and marks made by hand come
// first where a log has them.
//
// Everything is a proposal with its evidence as data: how sure the field is, how sure its
// factor, and what else behaves alike. Nothing here knows the format of a map, and nothing
// makes a sentence. Start with Drafter.
package draft
