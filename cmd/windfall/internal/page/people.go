package page

import "net/http"

// peopleDoc is who has come in, for the person at the laptop.
type peopleDoc struct {
	Code    string    `json:"join_code"`
	Address string    `json:"address,omitempty"`
	People  []knownOf `json:"people"`
}

// knownOf is a person with what the laptop alone is told.
type knownOf struct {
	person
	Addresses []string `json:"addresses,omitempty"`
	Caution   string   `json:"caution,omitempty"`
}

func (s *Server) getPeople(*http.Request) (any, error) {
	_, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	d := peopleDoc{s.doors.code(), s.address(), []knownOf{}}
	all := s.doors.everybody()
	for i, p := range s.people(all, fl, v, s.opt.Now()) {
		k := knownOf{person: p}
		for _, h := range all[i].from {
			k.Addresses = append(k.Addresses, h.address)
		}
		if len(k.Addresses) > 1 {
			k.Caution = "its session was used from more than one address within five minutes: where that is not one phone " +
				"that changed networks, put it out"
		}
		d.People = append(d.People, k)
	}
	return d, nil
}

// codeDoc is the join code as it is now.
type codeDoc struct {
	Code string `json:"join_code"`
}

// deletePerson puts a phone out: its session ends, and so does the code that it
// came in with.
func (s *Server) deletePerson(r *http.Request) (any, error) {
	if s.doors.shared {
		if name, ok := s.doors.in.put(r.PathValue("id")); ok {
			if _, fl, err := s.fieldNow(); err == nil {
				fl.Positions.Forget(name)
			}
			s.news.tell()
			return codeDoc{s.doors.code()}, nil
		}
	}
	return nil, refuse(http.StatusNotFound, "nobody of id %s is in but the laptop itself; GET /api/v1/people lists them",
		clipped(r.PathValue("id"), 20))
}

func (s *Server) deletePositions(*http.Request) (any, error) {
	_, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	n := fl.Positions.Wipe()
	s.news.tell()
	return map[string]int{"forgotten": n}, nil
}

const notShared = "the page is not shared; start windfall serve with --listen"

func (s *Server) postCode(*http.Request) (any, error) {
	if !s.doors.shared {
		return nil, refuse(http.StatusConflict, "%s", notShared)
	}
	return codeDoc{s.doors.in.renew()}, nil
}
