package newflight

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/usage"
)

// OrOpen returns the flight file at a path, or makes a folder to practise in
// where there is nothing.
func OrOpen(path, pad string, now time.Time) (string, error) {
	st, err := os.Stat(path)
	switch {
	case err == nil && !st.IsDir():
		return path, nil
	case err == nil:
		file := filepath.Join(path, "flight.yaml")
		if _, err := os.Stat(file); err == nil {
			return file, nil
		}
		if es, err := os.ReadDir(path); err == nil && len(es) > 0 {
			return "", usage.Errorf("%s: holds no flight.yaml; name a flight file, or a folder to make", path)
		}
	case !errors.Is(err, os.ErrNotExist):
		return "", usage.Errorf("%s: %v", path, err)
	case strings.HasSuffix(path, ".yaml") || strings.HasSuffix(path, ".yml"):
		return "", usage.Errorf("%s: no such file; name a flight file, or a folder to make", path)
	}
	start, err := From(pad, "metric")
	if err != nil {
		return "", err
	}
	files, err := start.Write(path, now)
	if err != nil {
		return "", err
	}
	return files[0], AddPractice(files[0])
}
