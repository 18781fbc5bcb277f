"""What clubs may share: summaries of fits, and the prior for another squad made from them."""
