"""The parts-interchange graph: model, rules, planning, store and the two front doors."""
