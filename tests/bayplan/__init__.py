"""The planner's core: prices, rules, yardsticks, reasons."""
