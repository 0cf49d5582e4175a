package logfile

import "bytes"

// kinds are files that people take for CAN logs, or hand over in place of one, and how they
// begin. A log that begins so and has frames is read all the same.
var kinds = []struct{ begin, what, hint string }{
	{"\x89PNG", "a PNG picture", ""},
	{"\xFF\xD8\xFF", "a JPEG picture", ""},
	{"GIF8", "a GIF picture", ""},
	{"%PDF-", "a PDF document", ""},
	{"\xD0\xCF\x11\xE0", "a document or workbook", ""},
	{"SQLite format 3\x00", "a database", ""},
	{"\x7FELF", "a program", ""},
	{"<!DOCTYPE html", "a web page", ""},
	{"<html", "a web page", ""},
	{"<?xml", "XML", ""},
	{"{", "JSON", ""},
	{"VERSION \"", "a database of signals", mapHint},
	{"format: 1", "a signal map", "give the log itself, and this file with --map"},
	{"LOGG", "a BLF log", convert},
	{"MDF ", "an MDF recording", convert},
	{";$FILEVERSION", "a TRC log", convert},
}

const (
	convert = "write it out as a candump, pcap or pcapng log with the program that made it"
	mapHint = "write a map by it, and give the log"
)

// kindOf tells what a file that is no log begins as, and what to do about it; what is empty
// where that is not known.
func kindOf(head []byte) (what, hint string) {
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xEF\xBB\xBF")), " \t\r\n")
	for _, k := range kinds {
		if bytes.HasPrefix(head, []byte(k.begin)) {
			return k.what, k.hint
		}
	}
	if bytes.HasPrefix(head, []byte("date ")) && bytes.Contains(head, []byte("\nbase ")) {
		return "an ASC log", convert
	}
	line, _, _ := bytes.Cut(head, []byte("\n"))
	for _, separator := range []string{",", ";", "\t"} {
		if bytes.Count(line, []byte(separator)) > 1 {
			return "a table (CSV)", ""
		}
	}
	return "", ""
}
