package textin

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func both(text string) (streamed, whole string, err error) {
	in, err := Reader(strings.NewReader(text), "x.csv")
	if err != nil {
		return "", "", err
	}
	s, err := io.ReadAll(in)
	if err != nil {
		return "", "", err
	}
	b, err := Read(strings.NewReader(text), "x.csv", 1<<20, "cut it")
	return string(s), string(b), err
}

func TestMark(t *testing.T) {
	for in, want := range map[string]string{"": "", "a": "a", "\xef\xbb\xbfa\r\n": "a\r\n", "\xef\xbb\xbf": "", "é": "é"} {
		s, w, err := both(in)
		require.NoError(t, err)
		assert.Equal(t, want, s)
		assert.Equal(t, want, w)
	}
}

func TestRefusals(t *testing.T) {
	for in, says := range map[string]string{
		"\xff\xfea\x00": "x.csv:1: is in UTF-16; save it as UTF-8", "\xfe\xff\x00a": "UTF-16", "a\x00b": "not text",
		"PK\x03\x04zip": "is an archive", "\x1f\x8bgz": "unpack it first",
	} {
		_, err := Reader(strings.NewReader(in), "x.csv")
		require.ErrorContains(t, err, says)
		_, err = Read(strings.NewReader(in), "x.csv", 1<<20, "")
		require.ErrorContains(t, err, says)
	}
	_, err := Read(strings.NewReader(strings.Repeat("x", 1<<20+1)), "x.csv", 1<<20, "cut it")
	require.EqualError(t, err, "x.csv: larger than 1 MB; cut it")
	broken := iotest.ErrReader(errors.New("the disk is gone"))
	_, err = Reader(broken, "x.csv")
	require.ErrorContains(t, err, "x.csv: the disk is gone")
	_, err = Read(broken, "x.csv", 9, "")
	require.ErrorContains(t, err, "the disk is gone")
}

func ExampleReader() {
	in, _ := Reader(strings.NewReader("\xef\xbb\xbftime_s,thrust_n"), "motor.csv")
	line, _ := in.ReadString('\n')
	fmt.Println(line)
	// Output: time_s,thrust_n
}
