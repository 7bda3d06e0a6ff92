"""The conventions that every HTTP answer keeps: snapshots, conditions, forms, paging, limits, request ids."""
