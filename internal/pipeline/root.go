package pipeline

// root measures the roots seen through the wall of a clear pot.
func (m *measuring) root() {
	m.fail("no_pot", "measuring roots is not built in")
	m.pictures(nil)
}
