// Package words puts what lull found into words: every sentence, count, time and
// figure that a person reads of a result is worded here, once, for terminal, page and
// document alike. It analyses nothing, lays nothing out and writes nothing. All its
// text is harmless to a terminal; for HTML it is to be escaped. Start with Report.
package words
