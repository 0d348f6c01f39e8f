"""The steps of a job besides charging: each takes its readings and reports what they prove."""
