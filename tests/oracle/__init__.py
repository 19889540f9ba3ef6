"""The independent witness: a shop read plainly and bought for by brute force, none of the tool in it."""
