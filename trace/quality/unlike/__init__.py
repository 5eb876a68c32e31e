"""What records show when they are compared with each other: figures that repeat, work quicker than hands, odd cooks."""
