// Package textin takes in text that people and their programs wrote: it takes
// off the byte order mark that some editors put before UTF-8, names UTF-16 as
// such, and keeps what is too long or no text from the readers behind it.
//
//	io.Reader -> Reader or Read -> text without a mark -> the file's own reader
//
// It knows no format and changes nothing else; line ends stay as they are.
package textin

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

const mark = "\xef\xbb\xbf" // U+FEFF in UTF-8

// Reader returns r from behind its mark. name is the file's, for messages.
func Reader(r io.Reader, name string) (*bufio.Reader, error) {
	in := bufio.NewReaderSize(r, 1<<16)
	head, err := in.Peek(512)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := text(head, name); err != nil {
		return nil, err
	}
	if bytes.HasPrefix(head, []byte(mark)) {
		_, err = in.Discard(len(mark))
		return in, err
	}
	return in, nil
}

// Read returns all of r, at most most bytes, without its mark; instead says
// what to do about a file that is longer.
func Read(r io.Reader, name string, most int64, instead string) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, most+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if int64(len(b)) > most {
		return nil, fmt.Errorf("%s: larger than %d MB; %s", name, most>>20, instead)
	}
	if err := text(b[:min(len(b), 512)], name); err != nil {
		return nil, err
	}
	return bytes.TrimPrefix(b, []byte(mark)), nil
}

// text refuses what begins as no text in UTF-8 does.
func text(head []byte, name string) error {
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")):
		return fmt.Errorf("%s:1: is in UTF-16; save it as UTF-8", name)
	case bytes.HasPrefix(head, []byte("\x1f\x8b")) || bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return fmt.Errorf("%s:1: is an archive; unpack it first", name)
	case bytes.IndexByte(head, 0) >= 0:
		return fmt.Errorf("%s:1: is not text; save it as text in UTF-8", name)
	}
	return nil
}
