"""Other people's calendars, read by URL: fetched with limits, taken apart in a child process, never trusted."""
