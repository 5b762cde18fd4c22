//! A bird's history that travels, and open data in and out: zip, JSON lines, CSV, iCalendar.
