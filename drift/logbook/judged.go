package logbook

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

// Judge keeps how well the map had done for a find, with the revision of it that
// was judged; the first judgement of a revision stays. The body is a JSON object.
func (b *Book) Judge(e Entry, when time.Time, body json.RawMessage) error {
	if e.Kind != Find {
		return fmt.Errorf("entry %d is a %s; a find is judged", e.ID, e.Kind)
	}
	return b.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT INTO judged VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", e.ID, e.Revision, stampTime(when),
			string(body))
		return err
	})
}

// judge fills in how well maps had done for the entries as they stand.
func (b *Book) judge(all []Entry) error {
	if b.schema < judgedSince || len(all) == 0 {
		return nil
	}
	at := map[[2]int64]int{}
	for i, e := range all {
		if e.Kind == Find {
			at[[2]int64{e.ID, int64(e.Revision)}] = i
		}
	}
	if len(at) == 0 {
		return nil
	}
	rows, err := b.db.Query("SELECT entry, n, body FROM judged")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var which [2]int64
		var body string
		if err := rows.Scan(&which[0], &which[1], &body); err != nil {
			return err
		}
		if i, ok := at[which]; ok {
			all[i].Judged = json.RawMessage(body)
		}
	}
	return rows.Err()
}

// judgeFlights fills in how well the map had done for the last find of each
// flight's vehicle.
func (b *Book) judgeFlights(all []FlightRow) error {
	if b.schema < judgedSince {
		return nil
	}
	finds, err := b.Entries(Query{Kinds: []Kind{Find}})
	if err != nil {
		return err
	}
	last := map[string]json.RawMessage{}
	for _, e := range finds {
		var part struct{ Part string }
		if json.Unmarshal(e.Body, &part) == nil && part.Part == "" {
			last[e.Flight] = e.Judged
		}
	}
	for i := range all {
		all[i].Judged = last[all[i].ID]
	}
	return nil
}
