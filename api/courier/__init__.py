"""The courier: asks watched questions anew when something changed, and brings events to those who want them."""
