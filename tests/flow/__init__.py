"""The whole chain, from files a person could have written to calendars, letters and pages."""
