// Package markup reads pages as a browser would, for tests that hold them to what
// they may contain. Start with Elements.
package markup

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
)

// bare completes attributes without a value, which the XML reader would otherwise take for
// a fault.
var bare = strings.NewReplacer("<!DOCTYPE html>", "", " defer>", ">", " required>", ">")

// Elements returns the start tags of a page in their order. It fails if the page is not
// well-formed or leaves an element open.
func Elements(page string) ([]xml.StartElement, error) {
	d := xml.NewDecoder(strings.NewReader(bare.Replace(page)))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var list []xml.StartElement
	depth := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("not well-formed: %w", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			depth++
			list = append(list, e.Copy())
		case xml.EndElement:
			depth--
		}
	}
	if depth != 0 {
		return nil, fmt.Errorf("%d elements are left open", depth)
	}
	return list, nil
}
