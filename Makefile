build:
	go build -o bin/gradeline ./cmd/gradeline
