"""Has the rate at equal ages changed over the calendar: looking back, and while it goes on."""
