package geotest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// failing is a test that keeps how it failed.
type failing struct {
	testing.TB
	how string
}

func (f *failing) Helper() {}
func (f *failing) Fatal(a ...any) {
	f.how = fmt.Sprint(a...)
	panic(f.how)
}
func (f *failing) Fatalf(format string, a ...any) { f.Fatal(fmt.Sprintf(format, a...)) }

// failure returns how f failed, "" if it did not.
func failure(f func(testing.TB)) string {
	t := &failing{}
	defer func() { _ = recover() }()
	func() {
		defer func() { _ = recover() }()
		f(t)
	}()
	return t.how
}

func module(t *testing.T, tables map[string]string) {
	t.Helper()
	dir := t.TempDir()
	tables["go.mod"] = "module m\n"
	for name, text := range tables {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "a/b"), 0o755))
	t.Chdir(filepath.Join(dir, "a/b"))
}

func TestTable(t *testing.T) {
	module(t, map[string]string{
		"testdata/reference/far.csv": "# remark\nx,basis\n1.5,printed\nno,from memory\n",
		"a/testdata/near.csv":        "x\n2\n",
		"testdata/near.csv":          "x\n3\n",
	})
	rows := Table(t, "far.csv")
	require.Len(t, rows, 2)
	assert.Equal(t, 1.5, rows[0].Number("x"))
	assert.Equal(t, "from memory", rows[1].Text("basis"))
	assert.Equal(t, "far.csv row 2", rows[1].String())
	assert.Equal(t, 2.0, Table(t, "near.csv")[0].Number("x"), "the nearest")
}

func TestFaultsFailTheTest(t *testing.T) {
	module(t, map[string]string{
		"testdata/empty.csv": "x,basis\n", "testdata/torn.csv": "x,basis\n1\n", "testdata/bare.csv": "x,basis\n1,\n", "testdata/good.csv": "x\nno\n",
	})
	for want, f := range map[string]func(testing.TB){
		"holds no rows":         func(t testing.TB) { Table(t, "empty.csv") },
		"wrong number of field": func(t testing.TB) { Table(t, "torn.csv") },
		"row 1 has no basis":    func(t testing.TB) { Table(t, "bare.csv") },
		"no table none.csv":     func(t testing.TB) { Table(t, "none.csv") },
		`has no column "y"`:     func(t testing.TB) { Table(t, "good.csv")[0].Text("y") },
		`column "x"`:            func(t testing.TB) { Table(t, "good.csv")[0].Number("x") },
	} {
		assert.Contains(t, failure(f), want)
	}
}
