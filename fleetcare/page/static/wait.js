// A page that waits for something looks again by itself; without this script its link does.
setTimeout(() => location.reload(), 3000);
