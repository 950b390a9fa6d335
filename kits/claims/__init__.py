"""What is asked of suppliers and carriers for goods that did not come whole."""
